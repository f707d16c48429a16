#!/usr/bin/env python
from projects.command_line import main

if __name__ == "__main__":
    main()
