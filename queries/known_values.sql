-- What the store knows of that can be filtered by.
-- Row: one value of one kind: family, model_year, site, cause.
-- Key: kind, value.
-- Grain: all vehicles, cases, readings and findings fold.
WITH named AS (
    SELECT 'family' AS kind, engine_family AS value FROM vehicles
    UNION ALL
    SELECT 'model_year' AS kind, CAST(model_year AS VARCHAR) AS value FROM vehicles
    UNION ALL
    SELECT 'site' AS kind, site AS value FROM readings
    UNION ALL
    SELECT 'site' AS kind, site AS value FROM cases_now
    UNION ALL
    SELECT 'cause' AS kind, cause AS value FROM findings_now
)
SELECT kind, value
FROM named
WHERE value IS NOT NULL
GROUP BY kind, value
ORDER BY kind, value
