-- Where observation begins and ends: the risk sets of every engine, before any failure is taken into account.
-- Row: one distance at which an engine of one group came under observation or left it.
-- Key: the columns of :who (family, site, model year; unknown values are keys of their own), distance_m; none unless folded.
-- Grain: where asked for (folded), spans fold by whole metre of the clock, so that a million vehicles are as many rows as there are
--   odometer readings; few lives hardly meet at a metre, and two rows each are cheaper than looking for those that do.
-- Order: none, the reader puts whole numbers in order, which costs less than ordering by text here.
-- The clock is the engine's (entry_m) or the odometer in its first segment. :source is spans, or stretches where a site or a
--   calendar cuts them; a stretch is cut at the end of a day as in exposure. Stretches that touch end and begin at one distance.
WITH raw AS (
    SELECT
        engine_family, :site AS site, model_year, :distance AS distance_m, entry_date, :exit AS exit_date,
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
        engine_family, site, model_year, from_m, distance_m,
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
cut AS (
    SELECT
        engine_family, site, model_year, from_m,
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
),
ends AS (
    SELECT engine_family, site, model_year, from_m + left_m AS distance_m, 1 AS entered, 0 AS ended
    FROM cut
    WHERE right_m > left_m
    UNION ALL
    SELECT engine_family, site, model_year, from_m + right_m AS distance_m, 0 AS entered, 1 AS ended
    FROM cut
    WHERE right_m > left_m
)
SELECT
-- each who
    :who,
-- end
    distance_m,
-- each folded
    SUM(entered) AS entered,
    SUM(ended) AS ended
-- end
-- each single
    entered,
    ended
-- end
FROM ends
-- each folded
GROUP BY
-- end
-- each folded_who
    :folded_who,
-- end
-- each folded
    distance_m
-- end
