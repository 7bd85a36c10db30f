"""Photos: files beside the store, each under the digest of what is in it."""
