"""What happens to a report once it is whole: mail, webhook, metrics."""
