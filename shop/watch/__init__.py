"""One trend per face, parameter, place measured and resin; where it is heading; the calls it raises."""
