namespace SawEdge.Gateway.Api;

/// <summary>What the saws do at the moment, handed in by those who run them.</summary>
public interface ILiveSource;
