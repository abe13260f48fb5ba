"""A general English recogniser (Moonshine tiny, MIT): it says how likely it holds texts that others propose."""
