"""How fast the logbook is with ten years of a large instrument in it."""
