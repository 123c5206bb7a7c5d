"""vecrepeat: seamless surface-pattern repeats from SVG drawings."""
