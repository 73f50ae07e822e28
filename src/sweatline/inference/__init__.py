"""From readings to numbers: the most probable ones, how sure, and what does not fit."""
