-- Distance under observation, between one kept reading and the next.
-- Row: two consecutive readings of one vehicle in one odometer segment.
-- Key: vehicle, exit_date, exit_odometer_m.
-- Grain: finest grain of exposure.
-- entry_m, exit_m: on the clock of the engine (odometer less the odometer at which the engine began); both unknown when
--   that is unknown. distance_m is always known: exit less entry, never negative, and its sums are exact.
-- site: where the vehicle was seen at the end of the stretch. Nothing is observed before the first reading, after the
--   last, across two segments, or after retirement. A replacement nobody placed ends in the old engine's stretch.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
SELECT
    r.vehicle,
    r.engine_no - r.replaced - r.unplaced AS engine_no,
    r.segment,
    r.site,
    v.engine_family,
    v.model_year,
    r.before_odometer_m - r.before_origin_m AS entry_m,
    r.odometer_m - r.before_origin_m AS exit_m,
    r.odometer_m - r.before_odometer_m AS distance_m,
    r.before_date AS entry_date,
    r.date AS exit_date,
    r.before_odometer_m AS entry_odometer_m,
    r.odometer_m AS exit_odometer_m
FROM readings AS r
JOIN vehicles AS v ON r.vehicle = v.vehicle
WHERE r.before_segment = r.segment AND (v.retired_on IS NULL OR r.date <= v.retired_on)
