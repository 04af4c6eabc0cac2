#!/usr/bin/env python
"""Django's command line for farmbuild."""

from farmbuild.command import main

if __name__ == "__main__":
    main()
