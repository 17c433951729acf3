from finishmatch.steps.photo.seen_in_photos import SeenRequest as SeenRequest
from finishmatch.steps.photo.seen_in_photos import read_seen as read_seen
