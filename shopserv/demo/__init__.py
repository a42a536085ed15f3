"""The demonstration scenario, loaded from `fixtures/demo.json`. Stands above all other packages."""
