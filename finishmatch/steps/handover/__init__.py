"""What goes with the car when it leaves, and what comes back with one."""
