"""What a server needs beside the program, as files that a command fills in."""
