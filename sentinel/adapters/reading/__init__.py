"""Understanding the bytes of files in processes of their own, so that no file ends the service."""
