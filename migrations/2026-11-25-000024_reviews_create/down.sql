DROP TABLE reviews_review;
