"""The hands-free channel: microphone to loudspeaker."""
