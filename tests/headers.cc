// Nothing of its own: the target whose precompiled headers the tests share.
