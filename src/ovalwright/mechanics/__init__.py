"""Laws of single parts: coil, bar, stop, tire, linkage, air, driveline. SI; nothing of files or screens."""
