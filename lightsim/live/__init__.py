"""The live page: the light moved by hand in a browser on this machine. The door is `lightsim.live.serve`."""
