"""What is wrong with art that can be planned all the same: a module for each kind of fault."""
