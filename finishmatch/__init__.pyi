from finishmatch.errors import InputError as InputError
from finishmatch.library import compare as compare
from finishmatch.library import correct as correct
from finishmatch.library import fit_bank as fit_bank
from finishmatch.library import mix as mix
from finishmatch.library import predict as predict
from finishmatch.library import read_bank as read_bank
from finishmatch.library import read_photo as read_photo
from finishmatch.library import read_target as read_target
from finishmatch.library import weigh_evidence as weigh_evidence
from finishmatch.readings import Reading as Reading
from finishmatch.steps.bank import FittedBank as FittedBank

__version__: str
