-- Distance under observation, between one kept reading and the next.
-- Row: two consecutive readings of one vehicle in one odometer segment.
-- Key: vehicle, sighting_date, sighting_odometer_m.
-- Grain: finest grain of exposure.
-- span: number of the span it belongs to, made of its key (spans).
-- entry_m, exit_m: on the clock of the engine (odometer less the odometer at which the engine began); both unknown when
--   that is unknown. distance_m is always known: exit less entry, never negative, and its sums are exact.
-- observed: 1 when the stretch, or the beginning of it, lies before the end of observation (observation_ends). exit_...:
--   its end or the end of observation, whichever comes first; the entry where observed is 0. Cut at the end of a day as in
--   exposure. sighting_...: the later reading, whatever brought it about; to_sighting_m: the distance as far as that.
-- site: where the vehicle was seen at the end of the stretch. Nothing is observed before the first reading, across two
--   segments, or after retirement. A replacement nobody placed ends in the old engine's stretch.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH whole AS (
    SELECT
        r.vehicle,
        r.engine_no - r.replaced - r.unplaced AS engine_no,
        r.segment,
        r.site,
        v.engine_family,
        v.model_year,
        r.before_odometer_m - r.before_origin_m AS entry_m,
        r.odometer_m - r.before_odometer_m AS to_sighting_m,
        r.before_date AS entry_date,
        r.date AS sighting_date,
        CAST(r.before_date AS BIGINT) AS entry_day,
        CAST(r.date AS BIGINT) AS sighting_day,
        e.observed_day,
        r.before_odometer_m AS entry_odometer_m,
        r.odometer_m AS sighting_odometer_m
    FROM readings AS r
    JOIN vehicles AS v ON r.vehicle = v.vehicle
    LEFT JOIN observation_ends AS e ON r.vehicle = e.vehicle AND r.segment = e.segment
    WHERE r.vehicle >= :first_vehicle AND r.vehicle < :end_vehicle
        AND r.before_segment = r.segment AND (v.retired_on IS NULL OR r.date <= v.retired_on)
),
cut AS (
    SELECT
        vehicle, engine_no, segment, site, engine_family, model_year, entry_m, to_sighting_m,
        entry_date, sighting_date, entry_day, sighting_day, observed_day, entry_odometer_m, sighting_odometer_m,
        CASE
            WHEN observed_day >= sighting_day THEN to_sighting_m
            WHEN observed_day > entry_day THEN
                CAST(FLOOR(CAST(to_sighting_m AS DOUBLE) * (observed_day - entry_day) / NULLIF(sighting_day - entry_day, 0)) AS BIGINT)
            ELSE 0
        END AS distance_m
    FROM whole
)
SELECT
    ((vehicle * 1000 + engine_no) * 1000 + segment) * 2 + CASE WHEN entry_m IS NULL THEN 0 ELSE 1 END AS span,
    vehicle,
    engine_no,
    segment,
    site,
    engine_family,
    model_year,
    CAST(CASE WHEN observed_day > entry_day OR observed_day >= sighting_day THEN 1 ELSE 0 END AS BIGINT) AS observed,
    entry_m,
    entry_m + distance_m AS exit_m,
    distance_m,
    to_sighting_m,
    entry_date,
    CASE
        WHEN observed_day >= sighting_day THEN sighting_date
        WHEN observed_day > entry_day THEN CAST(observed_day AS DATE)
        ELSE entry_date
    END AS exit_date,
    sighting_date,
    entry_odometer_m,
    entry_odometer_m + distance_m AS exit_odometer_m,
    sighting_odometer_m
FROM cut
