"""What next: from the day's answer to the next useful step of gearing and the plan for it."""
