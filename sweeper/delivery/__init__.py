"""The first and the last mile: what came in is looked over (`intake`), what is handed over is printed and measured."""
