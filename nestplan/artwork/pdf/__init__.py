"""PDF artwork: one page of a file, read operator by operator, its vectors never redrawn."""
