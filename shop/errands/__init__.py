"""Work for later: the row is the job, the broker only a doorbell."""
