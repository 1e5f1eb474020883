"""What `import fishdown` gives: fits with all that can be asked of them, and who makes them."""
