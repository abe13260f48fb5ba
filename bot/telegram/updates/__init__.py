"""Updates of the chat: polled or brought, kept before they are confirmed."""
