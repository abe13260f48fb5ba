"""Audio to words and words to audio; knows no dialog."""
