DROP TABLE results_recomputation;
DROP TABLE results_result;
