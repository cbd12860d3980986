"""What is asked of checked builds beside the check itself, one module a question."""
