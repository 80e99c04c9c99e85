-- From version 5 to version 6: nothing is stored otherwise, but the vapour pressures of eq. 11 come from an exponential of
-- our own (core/base/exponential.h), whose last digit may be another than that of the machine's library. A stored ledger is
-- what a fresh replay gives, to the last digit, so all of them are computed anew by the next morning.

UPDATE planting SET dirty_day = start_day;
