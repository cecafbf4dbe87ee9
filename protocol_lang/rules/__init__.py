"""What is asked of protocols: rules decided over all permitted orders and choices."""
