"""What is going on: who is here, what is offered, what is agreed, how much room is left."""
