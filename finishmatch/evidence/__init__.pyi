from finishmatch.evidence.kinds import EvidenceCatalogue as EvidenceCatalogue
from finishmatch.evidence.kinds import EvidenceKind as EvidenceKind
from finishmatch.evidence.kinds import Use as Use
from finishmatch.evidence.kinds import common_catalogue as common_catalogue
from finishmatch.evidence.kinds import shop_catalogue as shop_catalogue
from finishmatch.evidence.weigh import weigh_evidence as weigh_evidence
from finishmatch.evidence.weighed import Colour as Colour
from finishmatch.evidence.weighed import Weighed as Weighed
