-- The kept odometer readings of every vehicle, with the odometer at which their engine began.
-- Row: one kept reading.
-- Key: vehicle, place.
-- Grain: as clocks, for vehicles that are not odd as sightings, without the unknown; read by date, then odometer.
-- segment: from 1; a step down, or a leap that the next reading confirmed, opens the next. replaced, unplaced, engine_no:
--   as in clocks. before_...: of the reading before. plain: as in sightings.
-- origin_m: odometer at which the engine began; 0 for the first engine in the first segment; unknown when its replacement
--   has no place in this segment. before_origin_m is what the engine clock of a failure found *at* this reading
--   starts from: 0 at the vehicle's first reading, unknown after an unplaced replacement or in a new segment.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH origins AS (
    SELECT vehicle, engine_no, segment, MAX(odometer_m) AS origin_m
    FROM clocks
    WHERE replaced = 1 AND vehicle >= :first_vehicle AND vehicle < :end_vehicle
    GROUP BY vehicle, engine_no, segment
),
with_origins AS (
    SELECT
        n.vehicle, n.date, n.odometer_m, n.place, n.site, n.plain, n.replaced, n.unplaced, n.before_odometer_m,
        n.before_date, n.step, n.segment, n.engine_no,
        n.engine_no - n.replaced AS engine_before,
        CASE WHEN n.engine_no = 0 AND n.segment = 1 THEN 0 ELSE o.origin_m END AS origin_m
    FROM clocks AS n
    LEFT JOIN origins AS o ON n.vehicle = o.vehicle AND n.engine_no = o.engine_no AND n.segment = o.segment
    WHERE n.vehicle >= :first_vehicle AND n.vehicle < :end_vehicle
)
SELECT
    i.vehicle, i.date, i.odometer_m, i.place, i.site, i.plain,
    CAST(1 AS BIGINT) AS segment, CAST(0 AS BIGINT) AS replaced, CAST(0 AS BIGINT) AS unplaced, CAST(0 AS BIGINT) AS engine_no, CAST(0 AS BIGINT) AS origin_m,
    i.before_date, i.before_odometer_m,
    CAST(CASE WHEN i.before_date IS NOT NULL THEN 1 END AS BIGINT) AS before_segment,
    CAST(0 AS BIGINT) AS before_origin_m
FROM sightings AS i
LEFT JOIN (SELECT vehicle, 1 AS is_odd FROM odd_vehicles) AS o ON i.vehicle = o.vehicle
WHERE o.is_odd IS NULL AND i.odometer_m IS NOT NULL AND i.vehicle >= :first_vehicle AND i.vehicle < :end_vehicle
UNION ALL
SELECT
    w.vehicle, w.date, w.odometer_m, w.place, w.site, w.plain, w.segment, w.replaced, w.unplaced, w.engine_no, w.origin_m,
    w.before_date, w.before_odometer_m,
    CASE WHEN w.before_date IS NOT NULL THEN w.segment - w.step END AS before_segment,
    CASE
        WHEN w.unplaced > 0 THEN NULL
        WHEN w.before_date IS NULL THEN 0
        WHEN w.step = 1 THEN NULL
        WHEN w.engine_before = 0 AND w.segment = 1 THEN 0
        ELSE b.origin_m
    END AS before_origin_m
FROM with_origins AS w
LEFT JOIN origins AS b ON w.vehicle = b.vehicle AND w.engine_before = b.engine_no AND w.segment = b.segment
