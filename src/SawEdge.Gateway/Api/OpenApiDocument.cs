using System.Text.Json.Nodes;
using System.Text.Json.Schema;
using System.Text.RegularExpressions;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Http.Metadata;
using Microsoft.AspNetCore.Routing;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Export;

namespace SawEdge.Gateway.Api;

/// <summary>
/// The OpenAPI 3.1 document: what is mapped, with the words of <see cref="OpenApiTable"/>. Written here because the endpoints read their
/// parameters themselves to say in words what is wrong with them, which a generator cannot see.
/// </summary>
internal static partial class OpenApiDocument
{
    /// <summary>Maps it.</summary>
    public static void Map(RouteGroupBuilder api, IEndpointRouteBuilder root)
    {
        var document = new Lazy<byte[]>(() => System.Text.Encoding.UTF8.GetBytes(Write(Operations(root)).ToJsonString()));
        api.MapGet("/openapi.json", (Delegate)((HttpContext _) => ApiAnswer.PastJson(document.Value)));
    }

    /// <summary>Method and path under the prefix of each endpoint of the API, with the role that it needs.</summary>
    public static IReadOnlyList<(string Method, string Path, ApiRole Role)> Operations(IEndpointRouteBuilder root) =>
    [
        .. from endpoint in root.DataSources.SelectMany(source => source.Endpoints).OfType<RouteEndpoint>()
           let path = $"/{endpoint.RoutePattern.RawText?.TrimStart('/')}"
           where path.StartsWith(ApiRoutes.Prefix, StringComparison.Ordinal)
           from method in endpoint.Metadata.GetMetadata<IHttpMethodMetadata>()?.HttpMethods ?? []
           where method != HttpMethods.Head
           select (method, Constraint().Replace(path[ApiRoutes.Prefix.Length..], "}"), endpoint.Metadata.GetMetadata<RoleNeeded>()!.Role),
    ];

    private static JsonObject Write(IReadOnlyList<(string Method, string Path, ApiRole Role)> operations)
    {
        var schemas = new JsonObject { ["Problem"] = Schema(typeof(ApiProblem)) };
        var paths = new JsonObject();
        foreach (var path in operations.GroupBy(operation => operation.Path, StringComparer.Ordinal).OrderBy(group => group.Key, StringComparer.Ordinal))
            paths[ApiRoutes.Prefix + path.Key] = new JsonObject(path.Select(operation => KeyValuePair.Create(operation.Method.ToLowerInvariant(), (JsonNode?)Operation(operation, schemas))));
        return new JsonObject
        {
            ["openapi"] = "3.1.0",
            ["info"] = new JsonObject
            {
                ["title"] = "SawEdge",
                ["version"] = SiteEndpoints.Version,
                ["description"] = "What saws do and did. Times are RFC 3339 in UTC; units are in the names; what is not known is null. Beyond the gateway's own machine each request needs a token.",
            },
            ["security"] = new JsonArray(new JsonObject { ["token"] = new JsonArray() }),
            ["paths"] = paths,
            ["components"] = new JsonObject
            {
                ["securitySchemes"] = new JsonObject { ["token"] = new JsonObject { ["type"] = "http", ["scheme"] = "bearer", ["description"] = "Made by 'sawedge token make'." } },
                ["schemas"] = schemas,
            },
        };
    }

    private static JsonObject Operation((string Method, string Path, ApiRole Role) operation, JsonObject schemas)
    {
        var known = OpenApiTable.Operations.GetValueOrDefault($"{operation.Method} {operation.Path}") ?? new OpenApiOperation(operation.Path);
        var parameters = new JsonArray([.. PathParameter().Matches(operation.Path).Select(match => (JsonNode)InPath(match.Groups[1].Value)), .. known.Query.Split(' ', StringSplitOptions.RemoveEmptyEntries).Select(InQuery)]);
        var node = new JsonObject
        {
            ["summary"] = known.Summary,
            ["description"] = $"Role: {ApiToken.WordOf(operation.Role)}.",
            ["parameters"] = parameters,
            ["responses"] = Responses(operation.Method, known, schemas),
        };
        if (known.Body is { } body)
            node["requestBody"] = new JsonObject { ["required"] = true, ["content"] = Content("application/json", Reference(body, schemas)) };
        return node;
    }

    private static JsonObject Responses(string method, OpenApiOperation known, JsonObject schemas)
    {
        var answer = known.Answer is { } type ? Reference(type, schemas) : [];
        if (known.IsList)
            answer = new JsonObject { ["type"] = "object", ["properties"] = new JsonObject { ["items"] = new JsonObject { ["type"] = "array", ["items"] = answer }, ["next"] = new JsonObject { ["type"] = new JsonArray("string", "null") } } };
        var status = method == HttpMethods.Delete ? "204" : known is { Body: not null } && known.Body != typeof(AlarmAnswerBody) ? "201" : "200";
        var done = new JsonObject { ["description"] = "Done." };
        if (status != "204")
            done["content"] = Content(known.Media, answer);
        return new JsonObject
        {
            [status] = done,
            ["default"] = new JsonObject { ["description"] = "Why not: problem details, RFC 9457.", ["content"] = Content("application/problem+json", new JsonObject { ["$ref"] = "#/components/schemas/Problem" }) },
        };
    }

    private static JsonObject Content(string media, JsonObject schema) => new(media.Split(' ').Select(type => KeyValuePair.Create(type, (JsonNode?)new JsonObject { ["schema"] = schema.DeepClone() })));

    private static JsonObject InPath(string name)
    {
        var schema = new JsonObject { ["type"] = name is "number" ? "integer" : "string" };
        if (name is "table")
            schema["enum"] = new JsonArray([.. ExportTables.All.Select(table => (JsonNode)table.Name)]);
        return new JsonObject { ["name"] = name, ["in"] = "path", ["required"] = true, ["schema"] = schema };
    }

    private static JsonNode InQuery(string written)
    {
        var isRequired = written.EndsWith('!');
        var (words, schema) = OpenApiTable.Parameters[written.TrimEnd('!')];
        return new JsonObject { ["name"] = written.TrimEnd('!', '*', '~'), ["in"] = "query", ["required"] = isRequired, ["description"] = words, ["schema"] = JsonNode.Parse(schema) };
    }

    private static JsonObject Reference(Type type, JsonObject schemas)
    {
        if (!schemas.ContainsKey(type.Name))
            schemas[type.Name] = Schema(type);
        return new JsonObject { ["$ref"] = $"#/components/schemas/{type.Name}" };
    }

    private static JsonNode Schema(Type type)
    {
        var schema = ApiJson.Options.GetJsonSchemaAsNode(type, new JsonSchemaExporterOptions { TreatNullObliviousAsNonNullable = true, TransformSchemaNode = Transform });
        var root = $"#/components/schemas/{type.Name}";
        Rebase(schema, root);
        return schema;
    }

    // Types with converters of their own tell the exporter nothing.
    private static JsonNode Transform(JsonSchemaExporterContext context, JsonNode schema)
    {
        var type = Nullable.GetUnderlyingType(context.TypeInfo.Type) ?? context.TypeInfo.Type;
        var isNullable = type != context.TypeInfo.Type;
        if (type == typeof(DateTimeOffset))
            return isNullable ? new JsonObject { ["type"] = new JsonArray("string", "null"), ["format"] = "date-time" } : new JsonObject { ["type"] = "string", ["format"] = "date-time" };
        if (type == typeof(double))
            return new JsonObject { ["type"] = new JsonArray("number", "null") };
        if (type == typeof(CycleRecord))
            return new JsonObject { ["type"] = "object", ["properties"] = new JsonObject(CycleColumns.All.Select(column => KeyValuePair.Create(CycleJson.Camel(column.Name), (JsonNode?)OfColumn(column)))) };
        return schema;
    }

    private static JsonObject OfColumn(CycleColumn column)
    {
        var type = column.Type switch { ColumnType.Number => "number", ColumnType.Integer => "integer", _ => "string" };
        var schema = new JsonObject { ["type"] = new JsonArray(type, "null"), ["description"] = column.Unit.Length == 0 ? column.Meaning : $"{column.Meaning}, {column.Unit}" };
        if (column.Type == ColumnType.Time)
            schema["format"] = "date-time";
        return schema;
    }

    // The exporter's references begin at its own root.
    private static void Rebase(JsonNode? node, string root)
    {
        if (node is JsonObject entry)
        {
            if (entry["$ref"]?.GetValue<string>() is { } reference && reference.StartsWith('#') && !reference.StartsWith("#/components", StringComparison.Ordinal))
                entry["$ref"] = root + reference[1..];
            foreach (var (_, child) in entry.ToList())
                Rebase(child, root);
        }
        else if (node is JsonArray list)
        {
            foreach (var child in list)
                Rebase(child, root);
        }
    }

    [GeneratedRegex(":[a-z]+}")]
    private static partial Regex Constraint();

    [GeneratedRegex("{([a-z]+)}")]
    private static partial Regex PathParameter();
}
