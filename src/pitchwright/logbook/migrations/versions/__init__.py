"""One file a step; a step that was once released is never changed."""
