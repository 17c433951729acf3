from finishmatch.ledger.banks_used import (
    BankTint as BankTint,
)
from finishmatch.ledger.banks_used import (
    bank_of_job as bank_of_job,
)
from finishmatch.ledger.banks_used import (
    jobs_with_strengths as jobs_with_strengths,
)
from finishmatch.ledger.banks_used import (
    remember_bank as remember_bank,
)
from finishmatch.ledger.banks_used import (
    tints_of_bank as tints_of_bank,
)
from finishmatch.ledger.book import (
    Ledger as Ledger,
)
from finishmatch.ledger.bundled import (
    BundledEntry as BundledEntry,
)
from finishmatch.ledger.bundled import (
    BundledJob as BundledJob,
)
from finishmatch.ledger.bundled import (
    bundled_job as bundled_job,
)
from finishmatch.ledger.bundled import (
    job_with_seal as job_with_seal,
)
from finishmatch.ledger.bundled import (
    take_in as take_in,
)
from finishmatch.ledger.colour_trees import (
    Tree as Tree,
)
from finishmatch.ledger.entrance import (
    ledger_place as ledger_place,
)
from finishmatch.ledger.entrance import (
    open_ledger as open_ledger,
)
from finishmatch.ledger.entrance import (
    open_place as open_place,
)
from finishmatch.ledger.entries import (
    ENTRY_KINDS as ENTRY_KINDS,
)
from finishmatch.ledger.entries import (
    RESULTS as RESULTS,
)
from finishmatch.ledger.entries import (
    SURFACES as SURFACES,
)
from finishmatch.ledger.entries import (
    BatchEntry as BatchEntry,
)
from finishmatch.ledger.entries import (
    CoatEntry as CoatEntry,
)
from finishmatch.ledger.entries import (
    CorrectionEntry as CorrectionEntry,
)
from finishmatch.ledger.entries import (
    DecisionEntry as DecisionEntry,
)
from finishmatch.ledger.entries import (
    DefectEntry as DefectEntry,
)
from finishmatch.ledger.entries import (
    Entry as Entry,
)
from finishmatch.ledger.entries import (
    FilmLayerEntry as FilmLayerEntry,
)
from finishmatch.ledger.entries import (
    NoteEntry as NoteEntry,
)
from finishmatch.ledger.entries import (
    Nth as Nth,
)
from finishmatch.ledger.entries import (
    PlanEntry as PlanEntry,
)
from finishmatch.ledger.entries import (
    ReadingEntry as ReadingEntry,
)
from finishmatch.ledger.entries import (
    RecipeEntry as RecipeEntry,
)
from finishmatch.ledger.entries import (
    SprayOutEntry as SprayOutEntry,
)
from finishmatch.ledger.entries import (
    StrengthEntry as StrengthEntry,
)
from finishmatch.ledger.entries import (
    StrikeEntry as StrikeEntry,
)
from finishmatch.ledger.entries import (
    TargetEntry as TargetEntry,
)
from finishmatch.ledger.entries import (
    VerdictEntry as VerdictEntry,
)
from finishmatch.ledger.find_job import (
    job_title as job_title,
)
from finishmatch.ledger.find_job import (
    jobs_titled as jobs_titled,
)
from finishmatch.ledger.home import (
    ledger_exists as ledger_exists,
)
from finishmatch.ledger.home import (
    ledger_home as ledger_home,
)
from finishmatch.ledger.home import (
    ledger_path as ledger_path,
)
from finishmatch.ledger.home import (
    ledger_url as ledger_url,
)
from finishmatch.ledger.in_use import (
    job_in_use as job_in_use,
)
from finishmatch.ledger.in_use import (
    put_in_use as put_in_use,
)
from finishmatch.ledger.in_use import (
    some_job_in_use as some_job_in_use,
)
from finishmatch.ledger.index_of_colours import (
    DamagedIndexError as DamagedIndexError,
)
from finishmatch.ledger.kept_colours import (
    KeptColour as KeptColour,
)
from finishmatch.ledger.kept_colours import (
    colours_kept as colours_kept,
)
from finishmatch.ledger.moving import (
    copy_into as copy_into,
)
from finishmatch.ledger.nearest_colours import (
    colour_index as colour_index,
)
from finishmatch.ledger.open_items import (
    OpenItem as OpenItem,
)
from finishmatch.ledger.open_items import (
    find_open as find_open,
)
from finishmatch.ledger.quarantine import (
    QuarantineMark as QuarantineMark,
)
from finishmatch.ledger.quarantine import (
    mark_exposure as mark_exposure,
)
from finishmatch.ledger.quarantine import (
    marks_made as marks_made,
)
from finishmatch.ledger.quarantine import (
    marks_standing as marks_standing,
)
from finishmatch.ledger.quarantine import (
    suspects_met as suspects_met,
)
from finishmatch.ledger.shop import (
    RecordedOutcome as RecordedOutcome,
)
from finishmatch.ledger.shop import (
    coat_numbered as coat_numbered,
)
from finishmatch.ledger.shop import (
    recorded_outcomes as recorded_outcomes,
)
from finishmatch.ledger.snapshot import (
    copy_as_it_stands as copy_as_it_stands,
)
from finishmatch.ledger.soundness import (
    damage_of_file as damage_of_file,
)
from finishmatch.ledger.soundness import (
    seal_of as seal_of,
)
from finishmatch.ledger.soundness import (
    soundness_of as soundness_of,
)
from finishmatch.ledger.stock import (
    poured_since_count as poured_since_count,
)
from finishmatch.ledger.stock import (
    remember_stock as remember_stock,
)
from finishmatch.ledger.story import (
    Story as Story,
)
from finishmatch.ledger.story import (
    StoryLine as StoryLine,
)
from finishmatch.ledger.story import (
    job_story as job_story,
)
from finishmatch.ledger.strengths import (
    cards_without_strength as cards_without_strength,
)
from finishmatch.ledger.strengths import (
    fallen_since as fallen_since,
)
from finishmatch.ledger.strengths import (
    first_found as first_found,
)
from finishmatch.ledger.strengths import (
    known_again_by as known_again_by,
)
from finishmatch.ledger.strengths import (
    new_tins_at as new_tins_at,
)
from finishmatch.ledger.strengths import (
    newest_strength as newest_strength,
)
from finishmatch.ledger.strengths import (
    same_letdown as same_letdown,
)
from finishmatch.ledger.strengths import (
    same_reading as same_reading,
)
from finishmatch.ledger.strengths import (
    strength_found as strength_found,
)
from finishmatch.ledger.strengths import (
    strength_standing as strength_standing,
)
from finishmatch.ledger.strengths import (
    strengths_by_tins as strengths_by_tins,
)
from finishmatch.ledger.strengths import (
    strengths_counted as strengths_counted,
)
from finishmatch.ledger.views import (
    EntryView as EntryView,
)
from finishmatch.ledger.views import (
    JobView as JobView,
)
from finishmatch.ledger.views import entry_document as entry_document
from finishmatch.ledger.views import entry_from as entry_from
from finishmatch.ledger.wording import (
    describe_entry as describe_entry,
)
from finishmatch.ledger.wording import (
    describe_exposures as describe_exposures,
)
from finishmatch.ledger.wording import (
    describe_parts as describe_parts,
)
from finishmatch.ledger.wording import (
    describe_strengths as describe_strengths,
)
from finishmatch.ledger.wording import (
    foretold_words as foretold_words,
)
from finishmatch.ledger.wording import (
    growth_words as growth_words,
)
from finishmatch.ledger.wording import (
    kind_word as kind_word,
)
from finishmatch.ledger.wording import (
    kinds_counted as kinds_counted,
)
from finishmatch.ledger.wording import (
    letdown_words as letdown_words,
)
from finishmatch.ledger.wording import (
    share_words as share_words,
)
from finishmatch.ledger.wording import (
    weight_words as weight_words,
)
