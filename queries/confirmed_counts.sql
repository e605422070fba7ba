-- Confirmed failures that pass the filter, walk-ins included, counted by the columns asked for.
-- Row: one combination of the columns asked for; none of them gives one row, or no row where there is no failure.
-- Key: the columns of :dimension (family, site, model year, cylinder, band, cause; unknown values are keys of their own).
-- Grain: failure events fold, each with its primary cause. `:complaint` is a pattern one of the trouble codes must match.
WITH confirmed AS (
    SELECT
        1 AS every,
        vehicle, cylinder, cause, engine_family, site, model_year, opened,
        CASE
            WHEN position_m IS NULL THEN -1
-- each upper
            WHEN position_m < :upper THEN :i
-- end
            ELSE :last_band
        END AS band
    FROM episodes
    WHERE is_primary
-- each complaint
        AND codes IS NOT NULL AND REGEXP_LIKE(codes, :complaint)
-- end
-- each families
        AND engine_family IN (:families)
-- end
-- each sites
        AND site IN (:sites)
-- end
-- each model_years
        AND model_year IN (:model_years)
-- end
-- each cylinders
        AND cylinder IN (:cylinders)
-- end
-- each from
        AND opened >= :from
-- end
-- each to
        AND opened <= :to
-- end
)
SELECT
-- each dimension
    :dimension,
-- end
    COUNT(*) AS cases,
    COUNT(DISTINCT vehicle) AS vehicles,
    MIN(opened) AS first_day,
    MAX(opened) AS last_day
FROM confirmed
GROUP BY
-- each dimension
    :dimension,
-- end
    every
ORDER BY
-- each dimension
    :dimension,
-- end
    every
