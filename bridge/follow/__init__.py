"""Where is the host now?  MIDI clock, song position, time code and OSC: one transport state."""
