"""firstrocker: what a drop-foot brace does in swing and in the tenth of a second after heel strike."""

__version__ = "0.1.0"
