from finishmatch.readings.any_file import read_readings as read_readings
from finishmatch.readings.bank_folder import read_bank as read_bank
from finishmatch.readings.batch_file import read_batch as read_batch
from finishmatch.readings.fit_file import load_fit as load_fit
from finishmatch.readings.fit_file import store_fit as store_fit
from finishmatch.readings.reading import Reading as Reading
from finishmatch.readings.resolve import resolve_reading as resolve_reading
from finishmatch.readings.resolve import typed_lab as typed_lab
