-- First failures, and what they take out of the risk sets: an engine leaves at its first failure, whoever saw it.
-- Row: one change at one distance of one group; distance_m is -1 where first failures are only counted.
-- Key: the columns of :who, the cylinder where asked for, cause, distance_m.
-- Grain: first failures of engines fold: the first of each cause where causes are told apart (by_cause), else the first of any,
--   under the cause it had. entered and ended are added to those of life_risk and may be negative: pieces that began at or
--   after the failure go, the piece in which it happened ends there. failed counts it if the vehicle was under
--   observation (:with_later, or seen before) and its place is known. placed, walk_ins, later (after observation had
--   ended), unplaced: all first failures of the period, by what they are.
-- A failure of unknown place ends its piece where its day falls at even pace, and counts as unplaced, not as failed.
WITH hits AS (
    SELECT
        vehicle, engine_no, engine_family, site, model_year, cause, cylinder, opened, confirmation, place,
        under_observation
-- each with_later
        OR after_last_visit
-- end
        AS counted,
        under_observation OR after_last_visit AS seen_before,
        CAST(opened AS BIGINT) AS opened_day,
-- each engine_clock
        position_m AS place_m
-- end
-- each odometer_clock
        odometer_m AS place_m
-- end
    FROM episodes
    WHERE chain > 0
-- each families
        AND engine_family IN (:families)
-- end
-- each unknown_family
        AND engine_family IS NULL
-- end
-- each model_years
        AND model_year IN (:model_years)
-- end
-- each causes
        AND cause IN (:causes)
-- end
-- each cylinders
        AND cylinder IN (:cylinders)
-- end
),
firsts AS (
    SELECT DISTINCT ON (
        vehicle,
-- each by_cause
        cause,
-- end
-- each by_cylinder
        cylinder,
-- end
        engine_no
    )
        vehicle, engine_no, engine_family, site, model_year, cause, cylinder, opened_day, counted, seen_before, place_m, confirmation, place
    FROM hits
    ORDER BY
        vehicle,
-- each by_cause
        cause,
-- end
-- each by_cylinder
        cylinder,
-- end
        engine_no, opened_day, COALESCE(place_m, 9000000000000000), -confirmation, place, cause, cylinder
),
raw AS (
    SELECT
        vehicle, engine_no, engine_family, :site AS site, model_year, :distance AS distance_m, entry_date, :exit AS exit_date,
-- each engine_clock
        entry_m AS from_m
-- end
-- each odometer_clock
        CASE WHEN segment = 1 THEN entry_odometer_m END AS from_m
-- end
    FROM :source
),
wanted AS (
    SELECT
        vehicle, engine_no, engine_family, site, model_year, from_m, distance_m,
        CAST(entry_date AS BIGINT) AS entry_day,
        CAST(exit_date AS BIGINT) AS exit_day
    FROM raw
    WHERE distance_m > 0 AND from_m IS NOT NULL
-- each families
        AND engine_family IN (:families)
-- end
-- each unknown_family
        AND engine_family IS NULL
-- end
-- each sites
        AND site IN (:sites)
-- end
-- each model_years
        AND model_year IN (:model_years)
-- end
),
met AS (
    SELECT
        w.engine_family, w.site, w.model_year, f.cause, f.cylinder, f.opened_day, f.counted, f.place_m,
        w.from_m, w.distance_m, w.entry_day, w.exit_day
    FROM firsts AS f
    JOIN wanted AS w ON f.vehicle = w.vehicle AND f.engine_no = w.engine_no
),
cut AS (
    SELECT
        engine_family, site, model_year, cause, cylinder, opened_day, counted, place_m, from_m, entry_day, exit_day,
        CASE
            WHEN :before_first >= exit_day THEN distance_m
            WHEN :before_first <= entry_day THEN 0
            ELSE CAST(FLOOR(CAST(distance_m AS DOUBLE) * (:before_first - entry_day) / NULLIF(exit_day - entry_day, 0)) AS BIGINT)
        END AS left_m,
        CASE
            WHEN :last_day >= exit_day THEN distance_m
            WHEN :last_day <= entry_day THEN 0
            ELSE CAST(FLOOR(CAST(distance_m AS DOUBLE) * (:last_day - entry_day) / NULLIF(exit_day - entry_day, 0)) AS BIGINT)
        END AS right_m,
        CASE
            WHEN opened_day < entry_day THEN 0
            WHEN opened_day > exit_day THEN distance_m + 1
            WHEN place_m IS NOT NULL THEN place_m - from_m
            ELSE COALESCE(CAST(FLOOR(CAST(distance_m AS DOUBLE) * (opened_day - entry_day) / NULLIF(exit_day - entry_day, 0)) AS BIGINT), 0)
        END AS driven_m
    FROM met
),
touched AS (
    SELECT
        engine_family, site, model_year, cause, cylinder,
        from_m + left_m AS from_m,
        from_m + right_m AS to_m,
        from_m + driven_m AS end_m,
        CASE WHEN counted AND place_m IS NOT NULL THEN 1 ELSE 0 END AS fails
    FROM cut
    WHERE right_m > left_m AND driven_m <= right_m
),
changes AS (
    SELECT
        engine_family, site, model_year, cause, cylinder,
        to_m AS distance_m, 0 AS entered, -1 AS ended, 0 AS failed, 0 AS placed, 0 AS walk_ins, 0 AS later, 0 AS unplaced
    FROM touched
    UNION ALL
    SELECT
        engine_family, site, model_year, cause, cylinder,
        from_m AS distance_m, -1 AS entered, 0 AS ended, 0 AS failed, 0 AS placed, 0 AS walk_ins, 0 AS later, 0 AS unplaced
    FROM touched
    WHERE end_m <= from_m
    UNION ALL
    SELECT
        engine_family, site, model_year, cause, cylinder,
        end_m AS distance_m, 0 AS entered, 1 - fails AS ended, fails AS failed, 0 AS placed, 0 AS walk_ins, 0 AS later, 0 AS unplaced
    FROM touched
    WHERE end_m > from_m
    UNION ALL
    SELECT
        engine_family, site, model_year, cause, cylinder,
        CAST(-1 AS BIGINT) AS distance_m, 0 AS entered, 0 AS ended, 0 AS failed,
        CASE WHEN counted AND place_m IS NOT NULL THEN 1 ELSE 0 END AS placed,
        CASE WHEN seen_before THEN 0 ELSE 1 END AS walk_ins,
        CASE WHEN seen_before AND NOT counted THEN 1 ELSE 0 END AS later,
        CASE WHEN counted AND place_m IS NULL THEN 1 ELSE 0 END AS unplaced
    FROM firsts
    WHERE opened_day > :before_first AND opened_day <= :last_day
-- each sites
        AND site IN (:sites)
-- end
)
SELECT
-- each who
    :who,
-- end
-- each by_cylinder
    cylinder,
-- end
    cause,
    distance_m,
    SUM(entered) AS entered,
    SUM(ended) AS ended,
    SUM(failed) AS failed,
    SUM(placed) AS placed,
    SUM(walk_ins) AS walk_ins,
    SUM(later) AS later,
    SUM(unplaced) AS unplaced
FROM changes
GROUP BY
-- each who
    :who,
-- end
-- each by_cylinder
    cylinder,
-- end
    cause,
    distance_m
ORDER BY
-- each who
    :who,
-- end
-- each by_cylinder
    cylinder,
-- end
    cause,
    distance_m
