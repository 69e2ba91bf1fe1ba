"""An SVG file comes in; its shapes, as true curves in place, and its printed picture go out."""
