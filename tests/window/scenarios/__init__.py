"""What is pressed and looked at; each module has its inner side of the same name in inside."""
