"""What can and cannot be estimated from the records: each part of the model says so itself."""
