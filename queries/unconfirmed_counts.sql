-- Cases without a finding that counts, by outcome and the columns asked for.
-- Row: one outcome with one combination of the columns asked for.
-- Key: the columns of :dimension, outcome.
-- Grain: cases fold. Filters, band and complaint as in confirmed_counts; cylinder is the one the complaint names.
WITH unconfirmed AS (
    SELECT
        vehicle, cylinder, engine_family, site, model_year, opened, outcome,
        CASE
            WHEN position_m IS NULL THEN -1
-- each upper
            WHEN position_m < :upper THEN :i
-- end
            ELSE :last_band
        END AS band
    FROM unconfirmed_cases
    WHERE outcome IS NOT NULL
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
    outcome,
    COUNT(*) AS cases
FROM unconfirmed
GROUP BY
-- each dimension
    :dimension,
-- end
    outcome
ORDER BY
-- each dimension
    :dimension,
-- end
    outcome
