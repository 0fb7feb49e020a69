"""What the screen says and what a press means, as plain functions and objects without a screen."""
