"""What the evidence page is made of: notes that tests take, simulated trials, and the page itself."""
