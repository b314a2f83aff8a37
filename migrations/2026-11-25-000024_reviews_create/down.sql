DROP TABLE reviews_result;
DROP TABLE reviews_review;
