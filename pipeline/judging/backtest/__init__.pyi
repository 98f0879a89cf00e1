from .backtest_verdicts import first_screen_sentence as first_screen_sentence
from .backtest_verdicts import holding_sentence as holding_sentence
from .channel_backtest import BacktestResult as BacktestResult
from .channel_backtest import ChannelBacktest as ChannelBacktest
from .interval_coverage import IntervalCoverage as IntervalCoverage
from .risk_calibration import CalibrationBin as CalibrationBin
from .rolling_origin import backtest as backtest
from .score_comparison import RivalScore as RivalScore
