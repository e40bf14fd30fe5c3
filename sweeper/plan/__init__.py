"""What will be rendered: the variants, the checks that need plugins, and the solver."""
