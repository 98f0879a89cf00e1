from .fleet_files import write_sample as write_sample
from .fleet_tables import simulate_fleet as simulate_fleet
from .scenarios import resized as resized
from .scenarios import scenario as scenario
