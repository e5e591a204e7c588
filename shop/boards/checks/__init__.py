"""The checks of the installation against print, one module for each few areas."""
