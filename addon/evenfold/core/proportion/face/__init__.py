"""Where the face ends below: chin, muzzle, jaw and throat."""
