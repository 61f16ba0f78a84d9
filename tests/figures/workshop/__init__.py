"""Invented stylised figures built in Blender with its own tools, to judge measuring from outside.

Nothing here knows how measuring works. A recipe is drawn from a seed (``recipe``), pieces of mesh
are made by subject (``heads``, ``bodies``, ``hair``, ``headwear``, ``wear``), put together the way
artists do it (``styles``), rigged (``rigs``) and placed (``placing``). Where crown, chin and sole
are is taken from the bare skull and the standing foot before anything is joined to them (``truth``).

Design space: heads stand one unit high, the sole near z = 0, the face looks to -Y, left is +X.
"""
