"""Loading the invented plant of `fixtures/demo`, through the same services that people use."""
