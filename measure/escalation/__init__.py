"""When to tell the provider, from what a nurse entered and from the series of a wound."""
