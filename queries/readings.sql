-- The kept odometer readings of every vehicle in order, each with its odometer segment and its engine.
-- Row: one kept reading.
-- Key: vehicle, date, odometer_m.
-- Grain: as odometer_checks, without the ignored; read by date, then odometer.
-- segment: from 1; a step down, or a leap that the next reading confirmed, opens the next.
-- replaced: the engine was replaced at this reading. unplaced: replacements since the reading before, at an odometer
--   nobody wrote down (moved to the last kept reading of the same day where there is one).
-- engine_no: engines replaced up to and with this reading. origin_m: odometer at which that engine began; 0 for the
--   first engine in the first segment; unknown when its replacement has no place in this segment.
-- plain: as in sightings.
-- before_...: of the reading before. before_origin_m is what the engine clock of a failure found *at* this reading
--   starts from: 0 at the vehicle's first reading, unknown after an unplaced replacement or in a new segment.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH kept AS (
    SELECT vehicle, date, odometer_m, site, engine_replaced, plain
    FROM odometer_checks
    WHERE ignored = 0
),
off_the_clock AS (
    SELECT DISTINCT vehicle, date
    FROM sightings
    WHERE engine_replaced = 1 AND odometer_m IS NULL
    UNION
    SELECT vehicle, date
    FROM odometer_checks
    WHERE engine_replaced = 1 AND ignored > 0
),
same_day AS (
    SELECT k.vehicle, k.date, MAX(k.odometer_m) AS odometer_m, 1 AS moved
    FROM off_the_clock AS o
    JOIN kept AS k ON o.vehicle = k.vehicle AND o.date = k.date
    GROUP BY k.vehicle, k.date
),
no_reading_that_day AS (
    SELECT o.vehicle, o.date
    FROM off_the_clock AS o
    LEFT JOIN same_day AS s ON o.vehicle = s.vehicle AND o.date = s.date
    WHERE s.moved IS NULL
),
later_day AS (
    SELECT o.vehicle, o.date AS replaced_on, MIN(k.date) AS date
    FROM no_reading_that_day AS o
    JOIN kept AS k ON o.vehicle = k.vehicle AND o.date < k.date
    GROUP BY o.vehicle, o.date
),
later AS (
    SELECT vehicle, date, COUNT(*) AS unplaced
    FROM later_day
    GROUP BY vehicle, date
),
later_reading AS (
    SELECT k.vehicle, k.date, MIN(k.odometer_m) AS odometer_m, MAX(l.unplaced) AS unplaced
    FROM later AS l
    JOIN kept AS k ON l.vehicle = k.vehicle AND l.date = k.date
    GROUP BY k.vehicle, k.date
),
engines_marked AS (
    SELECT
        k.vehicle, k.date, k.odometer_m, k.site, k.plain,
        CAST(CASE WHEN k.engine_replaced = 1 OR s.moved = 1 THEN 1 ELSE 0 END AS BIGINT) AS replaced,
        CAST(COALESCE(l.unplaced, 0) AS BIGINT) AS unplaced
    FROM kept AS k
    LEFT JOIN same_day AS s ON k.vehicle = s.vehicle AND k.date = s.date AND k.odometer_m = s.odometer_m
    LEFT JOIN later_reading AS l ON k.vehicle = l.vehicle AND k.date = l.date AND k.odometer_m = l.odometer_m
),
with_neighbours AS (
    SELECT
        vehicle, date, odometer_m, site, plain, replaced, unplaced,
        replaced + unplaced AS changes,
        CAST(date AS BIGINT) AS day,
        LAG(odometer_m) OVER (PARTITION BY vehicle ORDER BY date, odometer_m) AS before_odometer_m,
        LAG(CAST(date AS BIGINT)) OVER (PARTITION BY vehicle ORDER BY date, odometer_m) AS before_day
    FROM engines_marked
),
with_steps AS (
    SELECT
        vehicle, date, odometer_m, site, plain, replaced, unplaced, changes,
        CAST(CASE
            WHEN odometer_m < before_odometer_m THEN 1
            WHEN odometer_m - before_odometer_m > :metres_a_day * (day - before_day + 1) THEN 1
            ELSE 0
        END AS BIGINT) AS step
    FROM with_neighbours
),
numbered AS (
    SELECT
        vehicle, date, odometer_m, site, plain, replaced, unplaced,
        1 + SUM(step) OVER (
            PARTITION BY vehicle ORDER BY date, odometer_m ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS segment,
        SUM(changes) OVER (
            PARTITION BY vehicle ORDER BY date, odometer_m ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS engine_no
    FROM with_steps
),
with_origins AS (
    SELECT
        vehicle, date, odometer_m, site, plain, replaced, unplaced, segment, engine_no,
        CASE
            WHEN engine_no = 0 AND segment = 1 THEN 0
            ELSE MAX(CASE WHEN replaced = 1 THEN odometer_m END) OVER (PARTITION BY vehicle, engine_no, segment)
        END AS origin_m
    FROM numbered
),
with_befores AS (
    SELECT
        vehicle, date, odometer_m, site, plain, replaced, unplaced, segment, engine_no, origin_m,
        LAG(date) OVER (PARTITION BY vehicle ORDER BY date, odometer_m) AS before_date,
        LAG(odometer_m) OVER (PARTITION BY vehicle ORDER BY date, odometer_m) AS before_odometer_m,
        LAG(segment) OVER (PARTITION BY vehicle ORDER BY date, odometer_m) AS before_segment,
        LAG(origin_m) OVER (PARTITION BY vehicle ORDER BY date, odometer_m) AS before_origin
    FROM with_origins
)
SELECT
    vehicle, date, odometer_m, site, plain, segment, replaced, unplaced, engine_no, origin_m,
    before_date, before_odometer_m, before_segment,
    CASE
        WHEN unplaced > 0 THEN NULL
        WHEN before_segment IS NULL THEN 0
        WHEN before_segment = segment THEN before_origin
    END AS before_origin_m
FROM with_befores
