"""What `import draincurve` offers to notebooks and scripts."""
