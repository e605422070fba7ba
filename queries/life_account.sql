-- What life can be told of: vehicles and distance under observation by group, and what has no place on the clock.
-- Row: one combination of the columns asked for; none of them gives one row, or no row where nobody was watched.
-- Key: the columns of :who (family, site, model year; unknown values are keys of their own).
-- Grain: spans (or stretches) fold. pieces: rows behind the group that have a distance, from which the work is shared out;
--   unknown_m: metres whose place on the clock is unknown; never: engines seen once only, or never at a larger distance.
WITH raw AS (
    SELECT
        1 AS every,
        vehicle, engine_family, :site AS site, model_year, :distance AS distance_m, entry_date, :exit AS exit_date,
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
        every, vehicle, engine_family, site, model_year, from_m, distance_m, entry_date, exit_date,
        CAST(entry_date AS BIGINT) AS entry_day,
        CAST(exit_date AS BIGINT) AS exit_day
    FROM raw
    WHERE distance_m >= 0
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
cut AS (
    SELECT
        every, vehicle, engine_family, site, model_year, from_m, distance_m, entry_date, exit_date,
        CASE
            WHEN :before_first >= exit_day THEN distance_m
            WHEN :before_first <= entry_day THEN 0
            ELSE CAST(FLOOR(CAST(distance_m AS DOUBLE) * (:before_first - entry_day) / NULLIF(exit_day - entry_day, 0)) AS BIGINT)
        END AS left_m,
        CASE
            WHEN :last_day >= exit_day THEN distance_m
            WHEN :last_day <= entry_day THEN 0
            ELSE CAST(FLOOR(CAST(distance_m AS DOUBLE) * (:last_day - entry_day) / NULLIF(exit_day - entry_day, 0)) AS BIGINT)
        END AS right_m
    FROM wanted
)
SELECT
-- each who
    :who,
-- end
    SUM(CASE WHEN from_m IS NOT NULL AND right_m > left_m THEN 1 ELSE 0 END) AS pieces,
    SUM(CASE WHEN from_m IS NOT NULL AND distance_m = 0 THEN 1 ELSE 0 END) AS never,
    COALESCE(SUM(CASE WHEN from_m IS NOT NULL THEN right_m - left_m END), 0) AS distance_m,
    COALESCE(SUM(CASE WHEN from_m IS NULL THEN right_m - left_m END), 0) AS unknown_m,
    COUNT(DISTINCT CASE WHEN from_m IS NOT NULL AND right_m > left_m THEN vehicle END) AS vehicles,
    COUNT(DISTINCT CASE WHEN from_m IS NOT NULL AND right_m > left_m THEN site END) AS sites,
    MIN(CASE WHEN right_m > left_m THEN entry_date END) AS first_day,
    MAX(CASE WHEN right_m > left_m THEN exit_date END) AS last_day
FROM cut
GROUP BY
-- each who
    :who,
-- end
    every
ORDER BY
-- each who
    :who,
-- end
    every
