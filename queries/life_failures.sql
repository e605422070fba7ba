-- First failures, and what they take out of the risk sets: an engine leaves at its first failure, whoever saw it.
-- Row: a piece of observation that a first failure ends or forbids, or how many first failures were what.
-- Key: none.
-- Grain: first failures of engines: the first of each cause where causes are told apart (by_cause), else the first of any, under
--   the cause it had. fate 0 and 1: the piece from from_m to to_m ends at end_m, or never was where end_m is not beyond from_m;
--   1 if that is a failure: the vehicle was under observation (:with_later, or seen before) and its place is known. All first
--   failures of the period are counted in n by what they are: fate 2 placed, 3 unplaced, 4 later (after observation had ended),
--   5 walk-ins; in these rows the distances are -1.
-- Order: none, the reader puts whole numbers in order, which costs less than ordering by text here.
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
        CASE WHEN counted AND place_m IS NOT NULL THEN 1 ELSE 0 END AS fate
    FROM cut
    WHERE right_m > left_m AND driven_m <= right_m
),
known AS (
    SELECT
        engine_family, site, model_year, cause, cylinder,
        CASE
            WHEN counted AND place_m IS NOT NULL THEN 2
            WHEN counted THEN 3
            WHEN seen_before THEN 4
            ELSE 5
        END AS fate,
        1 AS one
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
    cause, from_m, to_m, end_m, fate,
    CAST(1 AS BIGINT) AS n
FROM touched
UNION ALL
SELECT
-- each who
    :who,
-- end
-- each by_cylinder
    cylinder,
-- end
    cause,
    CAST(-1 AS BIGINT) AS from_m,
    CAST(-1 AS BIGINT) AS to_m,
    CAST(-1 AS BIGINT) AS end_m,
    fate,
    CAST(SUM(one) AS BIGINT) AS n
FROM known
GROUP BY
-- each who
    :who,
-- end
-- each by_cylinder
    cylinder,
-- end
    cause,
    fate
