"""What has to be done to the bore of the hub that is sent to a shaft."""
