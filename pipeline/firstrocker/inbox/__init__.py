"""A folder that loggers fill by night and day in, a study folder out: whole sessions only, each content once.

``night.py`` is one look from beginning to end: ``look.py`` sees what lies there, ``ledger.py`` remembers it from night
to night, ``whole.py`` tells half files, ``home.py`` reads standing descriptions, ``sort*.py`` decide, ``take.py`` lays
sessions into the study, ``morning.py`` tells people. Nothing in the inbox is ever changed.
"""
