"""From verdicts to alerts: what is announced, to whom, until when."""
