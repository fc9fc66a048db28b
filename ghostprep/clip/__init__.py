"""Moving pictures in and out: the only room that talks to ffmpeg."""
