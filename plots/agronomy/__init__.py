"""What is reckoned of crops, machines and materials: plain figures in, plain figures out. Pure."""
