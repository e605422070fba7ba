-- The kept odometer readings of odd vehicles in order, each with the number of its odometer segment and of its engine.
-- Row: one kept reading.
-- Key: vehicle, place.
-- Grain: as odometer_checks, without the ignored; read by date, then odometer.
-- step: 1 where the odometer went down, or leapt and the next reading confirmed it: segment, from 1, counts these.
-- replaced: the engine was replaced at this reading. unplaced: replacements since the reading before, at an odometer
--   nobody wrote down (moved to the last kept reading of the same day where there is one).
-- engine_no: engines replaced up to and with this reading. before_...: of the reading before. plain: as in sightings.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH checks AS (
    SELECT vehicle, date, odometer_m, place, site, engine_replaced, plain, ignored
    FROM odometer_checks
    WHERE vehicle >= :first_vehicle AND vehicle < :end_vehicle
),
kept AS (
    SELECT vehicle, date, odometer_m, place, site, engine_replaced, plain
    FROM checks
    WHERE ignored = 0
),
off_the_clock AS (
    SELECT DISTINCT vehicle, date
    FROM sightings
    WHERE engine_replaced = 1 AND odometer_m IS NULL AND vehicle >= :first_vehicle AND vehicle < :end_vehicle
    UNION
    SELECT vehicle, date
    FROM checks
    WHERE engine_replaced = 1 AND ignored > 0
),
same_day AS (
    SELECT k.vehicle, k.date, MAX(k.place) AS place, 1 AS moved
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
later_reading AS (
    SELECT o.vehicle, o.date AS replaced_on, MIN(k.place) AS place
    FROM no_reading_that_day AS o
    JOIN kept AS k ON o.vehicle = k.vehicle AND o.date < k.date
    GROUP BY o.vehicle, o.date
),
later AS (
    SELECT vehicle, place, COUNT(*) AS unplaced
    FROM later_reading
    GROUP BY vehicle, place
),
engines_marked AS (
    SELECT
        k.vehicle, k.date, k.odometer_m, k.place, k.site, k.plain,
        CAST(CASE WHEN k.engine_replaced = 1 OR s.moved = 1 THEN 1 ELSE 0 END AS BIGINT) AS replaced,
        CAST(COALESCE(l.unplaced, 0) AS BIGINT) AS unplaced
    FROM kept AS k
    LEFT JOIN same_day AS s ON k.vehicle = s.vehicle AND k.place = s.place
    LEFT JOIN later AS l ON k.vehicle = l.vehicle AND k.place = l.place
),
with_neighbours AS (
    SELECT
        vehicle, date, odometer_m, place, site, plain, replaced, unplaced,
        LAG(odometer_m) OVER (PARTITION BY vehicle ORDER BY place) AS before_odometer_m,
        LAG(date) OVER (PARTITION BY vehicle ORDER BY place) AS before_date
    FROM engines_marked
),
with_steps AS (
    SELECT
        vehicle, date, odometer_m, place, site, plain, replaced, unplaced, before_odometer_m, before_date,
        replaced + unplaced AS changes,
        CAST(CASE
            WHEN odometer_m < before_odometer_m THEN 1
            WHEN odometer_m - before_odometer_m
                > :metres_a_day * (CAST(date AS BIGINT) - CAST(before_date AS BIGINT) + 1) THEN 1
            ELSE 0
        END AS BIGINT) AS step
    FROM with_neighbours
)
SELECT
    vehicle, date, odometer_m, place, site, plain, replaced, unplaced, before_odometer_m, before_date, step,
    1 + SUM(step) OVER (
        PARTITION BY vehicle ORDER BY place ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
    ) AS segment,
    SUM(changes) OVER (
        PARTITION BY vehicle ORDER BY place ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
    ) AS engine_no
FROM with_steps
