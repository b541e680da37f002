"""Many ceilings over varied inputs."""
